"""From a planned plant to one that stands: parts that fit, in the order they go together."""
