"""What to order and when: use that is not planned yet, how long deliveries take, and what each choice costs."""
