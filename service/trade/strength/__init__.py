"""What a few crushed blocks say of a recipe, and how sure that is."""
