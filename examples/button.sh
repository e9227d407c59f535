#!/bin/sh
# A mystery button: nine like buttons from an old breaker, weighed together on a pocket scale, first dry,
# then hung in a cup of water on the pan, which gains 0.61 g.
bilancetta=${BILANCETTA:-"$(dirname "$0")/../build/release/bilancetta"}
exec "$bilancetta" weigh --dry 6.12 --rise 0.61 --count 9 --found breaker --wetting soaped --water-c 21 \
  --test magnet=none --test sides=alike
