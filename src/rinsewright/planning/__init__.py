"""The plan: what a proposed plant will do, what is wrong with it and what to do about it."""

SEED = 20263  # of the years drawn by chance, where none is asked for
