//! What reports say of offsets, body loss and spread: plain numbers.
