"""Legal profiles as data and pure checks, one module for each jurisdiction. Not legal advice."""
