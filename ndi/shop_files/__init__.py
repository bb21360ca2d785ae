"""A shop's own tables on their way into a book: people, equipment, materials, work orders, receiving lists, part numbers."""
