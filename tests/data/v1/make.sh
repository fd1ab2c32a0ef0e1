#!/usr/bin/env bash
# How the files here were made, once, by the program of that version. Never again: they are evidence
# of what it wrote. Files of a later version go into a folder of their own.
#
# usage: make.sh PROGRAM FOLDER     from the top of the project; FOLDER is new
set -euo pipefail
trundle=$1 folder=$2 capture=logs/simulated-rtk.capture
mkdir "$folder"
export TRUNDLE_DATA=$folder/data TRUNDLE_SETTINGS=$folder/none
# A flagged result ends with 1; it is evidence all the same.
json() { "$trundle" "${@:2}" --json >"$folder/$1.json" || [ $? -eq 1 ]; }
json work work "$capture"
json check check "$capture"
json slip slip "$capture" --zero-slip-value 12700 --right 0.4 --ahead 1.5
json speeds speeds "$capture"
json pto pto "$capture" --display-step 10
json mount mount "$capture"
json proof proof "$capture" --entered 12676
"$trundle" tractor add "Big grey" --make "Own build" --model "First"
"$trundle" tyres add "Narrow" --size "460/85 R38" --inflation "1.2 bar" --wear "20 %"
"$trundle" tape add "Blue reel" --length "50 m" --material steel --class ii
"$trundle" person add "A. Measurer" --company "Measurer & Daughter"
"$trundle" person add "B. Grower"
"$trundle" rig add "Grey one" --tractor "Big grey" --tyres "Narrow" --tape "Blue reel" \
    --operator "A. Measurer" --customer "B. Grower" --source wheel --antenna-right "0.05 m" \
    --antenna-ahead "0.35 m" --antenna-height "3.05 m" --axle-to-hitch "1.1 m" --pto-impulses 6
"$trundle" sign "$capture" --as-found 13020 --as-left 12713 --rate 200 --location "Yard" \
    --surface "dry stubble" --inflation "1.2 bar"
"$trundle" record list --json >"$folder/list.json"
id=$(sed -n 's/.*"id": *"\([^"]*\)".*/\1/p' "$folder/list.json" | head -n 1)
rm "$folder/list.json"
"$trundle" record show "$id" --json >"$folder/record.json"
json sheet sheet "Grey one"
"$trundle" export records --to "$folder/records.csv"
"$trundle" rig export "Grey one" --to "$folder/rig.toml"
"$trundle" backup "$folder/all.backup"
rm -f "$folder"/data/*.lock "$folder/data/register.db-journal"
