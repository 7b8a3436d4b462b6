#!/usr/bin/env bash
# Draws the icons: two wires between two connectors, and an ammeter between them. Needs rsvg-convert.
# The drawing is made on a grid of 24, so that edges fall on pixels at 24 and at 48.
set -euo pipefail
cd "$(dirname "$0")"

icon() { # name, size, colour of the lines, colour of the meter's face
    rsvg-convert -w "$2" -h "$2" -o "$1" <<SVG
<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 24 24">
  <path d="M3 5.5h18" stroke="#e8590c" stroke-width="3"/>
  <path d="M3 18.5h18" stroke="#228be6" stroke-width="3"/>
  <rect x="0" y="2" width="4" height="20" rx="1" fill="$3"/>
  <rect x="20" y="2" width="4" height="20" rx="1" fill="$3"/>
  <circle cx="12" cy="12" r="4.5" fill="$4" stroke="$3" stroke-width="1.5"/>
  <path d="M10.5 14l3-4" stroke="#e8590c" stroke-width="1.5" stroke-linecap="round"/>
</svg>
SVG
}

for size in 24 48; do
    icon "light_$size.png" $size "#343a40" "#ffffff"
    icon "dark_$size.png" $size "#dee2e6" "#212529"
done
icon package_64.png 64 "#343a40" "#ffffff"
