//! Arguments, settings, exit codes.
