"""How the store's database came to its present form, step by step."""
