"""What the promises cost: claims and remedies by month of age, what they cost, and what is still to come."""
