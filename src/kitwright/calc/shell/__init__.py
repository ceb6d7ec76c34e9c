"""What a bell rings like, and what a bursting disc brings against its wall."""
