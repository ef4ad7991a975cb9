"""Planning: the recipes of a job, the soil they need, and the lot that decides which block is crushed how and when."""
