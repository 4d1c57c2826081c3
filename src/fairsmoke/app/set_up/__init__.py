"""Setting up: records from what people write in forms, and back."""
