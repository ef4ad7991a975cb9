#!/bin/sh
# Run by the database's image when it makes its data: the two accounts of the service, and what each may do.
set -eu
psql -v ON_ERROR_STOP=1 -v migrate="$MIGRATE_PASSWORD" -v service="$SERVICE_PASSWORD" \
  --username "$POSTGRES_USER" --dbname "$POSTGRES_DB" <<'SQL'
CREATE ROLE loambook_migrate LOGIN PASSWORD :'migrate';
CREATE ROLE loambook LOGIN PASSWORD :'service';
SQL
psql -v ON_ERROR_STOP=1 --username "$POSTGRES_USER" --dbname "$POSTGRES_DB" --file /loambook/grants.sql
