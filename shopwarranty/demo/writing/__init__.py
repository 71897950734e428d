"""The story into the database: set-based, through the models, in the scope of the demo shop."""
