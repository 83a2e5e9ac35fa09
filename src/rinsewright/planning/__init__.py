"""The plan: what a proposed plant will do, what is wrong with it and what to do about it."""
