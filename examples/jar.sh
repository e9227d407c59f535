#!/bin/sh
# A jar of odd pieces from a CSV, one row out for each row in.
here=$(dirname "$0")
bilancetta=${BILANCETTA:-"$here/../build/release/bilancetta"}
exec "$bilancetta" batch "$here/jar.csv"
