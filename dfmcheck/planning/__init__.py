"""Planning: material, stock and process of a part. Pure: catalogues come in as values."""
