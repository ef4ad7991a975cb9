"""What a wall brings to its blocks, and what it costs."""
