"""What is prescribed: blocks, how they progress, loading schemes, and every change of them."""
