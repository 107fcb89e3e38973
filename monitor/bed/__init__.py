"""What each zone has learned of itself: how it holds heat and water, and what follows for the hours ahead."""
