//! The program from outside: what it prints, how it ends, what it leaves on the disk.

mod care;
mod lots;
mod opening;
mod shop;
mod welding;
mod window;
