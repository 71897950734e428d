"""PostgreSQL that is told before each statement which shop is being worked for (see `row_security.py`)."""
