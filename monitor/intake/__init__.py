"""From the broker to a durable Reading: decode, judge, keep, then acknowledge."""
