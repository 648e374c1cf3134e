"""Making a batch: plan, weigh sheet, record, cost."""
