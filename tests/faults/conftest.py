from tests.many_hands import shared_database as shared_database
