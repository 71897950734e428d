"""What is written about checks: kinds of messages, their texts, and when they are due."""
