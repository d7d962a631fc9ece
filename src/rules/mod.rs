//! What makes a placement legal, answered fast.
