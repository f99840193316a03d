"""The lists of the house as tables to be taken along: the rows a page shows, in its order, all pages of it."""
