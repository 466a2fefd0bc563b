//! Is this a good read? Read faults, and the agreement of several reads.
