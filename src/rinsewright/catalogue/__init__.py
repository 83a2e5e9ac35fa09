"""Generic parts with round values, each with its origin, and the user's own parts beside them."""
