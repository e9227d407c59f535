#!/bin/sh
# A grey tip from a contactor: the test drop, tried before on a silver coin, does nothing on it.
bilancetta=${BILANCETTA:-"$(dirname "$0")/../build/release/bilancetta"}
exec "$bilancetta" weigh --dry 4.210 --rise 0.287 --found contactor --wetting soaped \
  --test skin-reagent=no-reaction --test notch-reagent=no-reaction --reagent-checked --test magnet=weak
