//! Families of serial memories: capacities, pages, and what a marking on a small package can mean.
