"""Forces of a body at rest: what every joint, foot and the base carry, and how near the whole is to tipping."""
