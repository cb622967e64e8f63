#!/bin/sh
# Starts PostgreSQL, on the first start with a new cluster. It understands as much of the usual environment as the tests
# need: POSTGRES_PASSWORD, and POSTGRES_USER and POSTGRES_DB (plain names). Arguments are settings of the server
# (-c fsync=off); any other command is run in place of the server.
#
# A restart keeps the data, and a commit is durable: fsync stays on unless the tests switch it off.
set -eu
: "${PGDATA:=/var/lib/postgresql/data}" "${POSTGRES_USER:=postgres}"
: "${POSTGRES_DB:=$POSTGRES_USER}"

case "${1:-postgres}" in
-*) ;;
postgres) [ $# -eq 0 ] || shift ;;
*) exec "$@" ;;
esac

if [ ! -s "$PGDATA/PG_VERSION" ]; then
  : "${POSTGRES_PASSWORD:?set POSTGRES_PASSWORD}"
  case "$POSTGRES_DB" in
  *[!a-z0-9_]*) echo "POSTGRES_DB=$POSTGRES_DB is not a plain name" >&2; exit 1 ;;
  esac
  password="$(mktemp)"
  printf '%s' "$POSTGRES_PASSWORD" >"$password"
  # The order of text is that of a dictionary, as on most servers, and not that of bytes, as in SQLite: what relies on
  # the order of bytes without asking for it shall fail in a test.
  initdb --pgdata="$PGDATA" --username="$POSTGRES_USER" --pwfile="$password" --auth-local=trust --auth-host=scram-sha-256 \
    --encoding=UTF8 --locale=C.UTF-8 --locale-provider=icu --icu-locale=en-US --no-sync >/dev/null
  rm "$password"
  echo "host all all all scram-sha-256" >>"$PGDATA/pg_hba.conf"
  if [ "$POSTGRES_DB" != postgres ]; then
    echo "CREATE DATABASE $POSTGRES_DB" | postgres --single -F -c exit_on_error=on -D "$PGDATA" postgres >/dev/null
  fi
fi

exec postgres -D "$PGDATA" -c listen_addresses='*' -c unix_socket_directories=/tmp -c max_connections=200 -c jit=off "$@"
