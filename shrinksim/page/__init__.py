"""What every page and figure shares: style, axes, templates."""
