// Package integration tests the program from outside, as its users meet it:
// the built binary with its subcommands and its shutdown, the image of it run
// by a container engine, and the commands and answers printed in README.md.
//
// It has no code but its tests. They speak HTTP and read what the program
// prints; they start nothing that they do not stop. The container test needs a
// Docker engine. Without one it is skipped, saying so, unless CI or
// GREENWEIGHT_REQUIRE_DOCKER says that an engine must be there.
package integration
