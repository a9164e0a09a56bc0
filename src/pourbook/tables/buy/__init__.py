"""What is bought: packs of products and of additives, and what is in stock."""
