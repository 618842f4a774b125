"""One coat in one stretch of time: batches, who does what and in which order. Start with `network` and `chain`."""
