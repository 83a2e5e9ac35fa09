"""The parts of a plant, one file each, in the order the water meets them: feed, membrane, product."""
