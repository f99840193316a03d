"""A pour at the table: what is to be weighed, and how what was said so far lies by it."""
