//! Files to model, plan to file: the only place that touches the disk.
