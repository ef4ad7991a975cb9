"""The demo shop, loaded through the desks with a handed-in clock."""
