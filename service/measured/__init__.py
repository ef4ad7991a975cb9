"""What readings come to, each rule once: a gauge on a day, a crushing, time in the water, a density, a soil's curve."""
