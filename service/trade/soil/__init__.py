"""What a soil is: water, grading, limits, class, verdict, blends, first recipes."""
