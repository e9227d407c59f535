#!/bin/sh
# A spoon stamped as sterling, 32 g, weighed on a jeweller's scale.
bilancetta=${BILANCETTA:-"$(dirname "$0")/../build/release/bilancetta"}
exec "$bilancetta" weigh --dry 32.014 --rise 3.087 --found tableware --claim sterling --wetting soaped
