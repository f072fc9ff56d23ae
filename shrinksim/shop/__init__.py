"""What stands in the shop: sections, steels, flames, coolings, patterns."""
