#!/bin/sh
# Starts the service in the container; a setting may stand in a file, named by the setting's name and _FILE.
set -eu
for name in LOAMBOOK_SECRET LOAMBOOK_DATABASE_URL; do
  eval "file=\${${name}_FILE:-}"
  if [ -n "$file" ]; then
    export "$name=$(cat "$file")"
  fi
done
exec .venv/bin/loambook serve "$@"
