//! Files: the only module that knows the file system.
