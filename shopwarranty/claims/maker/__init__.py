"""Claims of the shop to film makers: what is wrong with a lot, sent as one PDF, and what came of it."""
