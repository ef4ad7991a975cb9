"""What goes into a mix: shares, masses, water, mixer loads, the sheet for the site."""
