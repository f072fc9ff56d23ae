"""What people look at: report, figures, fields."""
