// Package integration tests the program from outside, as its users meet it:
// the built binary with its subcommands and its shutdown, the image of it run
// by a container engine, several replicas of the image on one PostgreSQL, and
// the commands and answers printed in README.md.
//
// It has no code but its tests. They speak HTTP and read what the program
// prints; they start nothing that they do not stop. The tests of replicas write
// under load while a replica is killed, or the database is stopped, killed,
// frozen or full; then they expect each thing that was acknowledged, or asked for
// again with the same idempotency key, once and in one chain, and judge every
// exchange by the contract.
//
// The container tests need a Docker engine. Without one they are skipped, saying
// so, unless CI or GREENWEIGHT_REQUIRE_DOCKER says that an engine must be there.
package integration
