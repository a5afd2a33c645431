//! Protocol-as-code for hospital temperature management.
