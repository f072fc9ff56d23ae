"""The heat stage: phases of torch and cooling marched to a temperature history."""
