"""Open public forecast services: what each is and how its answer is read. Bytes in, hours out; no network or clock."""
