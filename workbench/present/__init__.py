"""What terminal, notebook and page say alike: words, tables, and the base of every answer."""
