"""Words and figures: typed text to numbers, numbers to text, phrases to sentences."""
