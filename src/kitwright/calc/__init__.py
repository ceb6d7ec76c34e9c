"""Pure computation by stage of the job: arrays in, frozen answers out; no I/O, clock or seed."""
