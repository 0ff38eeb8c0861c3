#!/bin/bash
# A ranking cut into parts by a job array of Debian's own Slurm on this one machine,
# put together again and held against a single run, byte by byte.
#   tests/scale/slurm.sh [PLAN] [PARTS]
# Wants root, slurm-wlm and munge (apt-get install slurm-wlm munge) and a built
# program (PERCHLINE; target/release/perchline if not given). Prints
#   figure slurm_parts VALUE count
#   figure slurm_files_differing VALUE count
#   figure slurm_parts_cost VALUE times
#   figure gathering_costs VALUE times
#   figure part_bytes_a_post VALUE bytes
# the processor time of all parts, and of putting them together, over that of the
# single run; what is kept of a site's link to a post on one channel.
set -euo pipefail
cd "$(dirname "$0")/../.."
plan=$(realpath "${1:-sample-terrain/ferry-lights.toml}")
parts=${2:-4}
program=$(realpath "${PERCHLINE:-target/release/perchline}")
for tool in sbatch slurmctld slurmd munged; do
    command -v "$tool" >/dev/null || {
        echo "slurm: $tool is not installed: apt-get install slurm-wlm munge" >&2
        exit 1
    }
done
[ "$(id -u)" = 0 ] || { echo "slurm: its daemons want root" >&2; exit 1; }

work=$(mktemp -d)
started=()
stop() {
    for pid in "${started[@]}"; do kill "$pid" 2>/dev/null || true; done
    wait 2>/dev/null || true
    rm -rf "$work"
}
trap stop EXIT

# Its daemons with all they write in a folder of their own.
host=$(hostname -s)
mkdir -p "$work"/{state,spool,munge}
chmod 700 "$work/munge"
head -c 128 /dev/urandom >"$work/munge/key"
chmod 400 "$work/munge/key"
munged --foreground --force --key-file="$work/munge/key" --socket="$work/munge/socket" \
    --pid-file="$work/munge/pid" --log-file="$work/munge/log" --seed-file="$work/munge/seed" 2>"$work/munged.err" &
started+=($!)
cat >"$work/slurm.conf" <<CONF
ClusterName=one
SlurmctldHost=$host(127.0.0.1)
AuthType=auth/munge
AuthInfo=socket=$work/munge/socket
CryptoType=crypto/munge
SlurmUser=root
SlurmdUser=root
StateSaveLocation=$work/state
SlurmdSpoolDir=$work/spool
SlurmctldPidFile=$work/slurmctld.pid
SlurmdPidFile=$work/slurmd.pid
SlurmctldLogFile=$work/slurmctld.log
SlurmdLogFile=$work/slurmd.log
SlurmctldPort=16817
SlurmdPort=16818
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SelectType=select/cons_tres
SelectTypeParameters=CR_Core
ReturnToService=2
MpiDefault=none
NodeName=$host NodeAddr=127.0.0.1 CPUs=$(nproc) State=UNKNOWN
PartitionName=all Nodes=$host Default=YES State=UP
CONF
export SLURM_CONF=$work/slurm.conf SOURCE_DATE_EPOCH=1790000000
slurmctld -D 2>"$work/slurmctld.err" &
started+=($!)
sleep 2
slurmd -D -N "$host" 2>"$work/slurmd.err" &
started+=($!)
for _ in $(seq 60); do
    sinfo -h -o %t 2>/dev/null | grep -q idle && break
    sleep 1
done
sinfo -h -o "%N %t %c" >&2

seconds() { awk '/^user|^sys/ { sum += $2 } END { printf "%.2f\n", sum }' "$1"; }
TIMEFORMAT=$'user %U\nsys %S'

# The same array as docs/scale.md shows.
cat >"$work/array.sh" <<JOB
#!/bin/bash
#SBATCH --array=1-$parts
#SBATCH --cpus-per-task=1
#SBATCH --output=$work/part-%a.log
TIMEFORMAT=\$'user %U\nsys %S'
time "$program" rank "$plan" --threads 1 --part "\$SLURM_ARRAY_TASK_ID/$parts" \\
    --out "$work/parts/\$SLURM_ARRAY_TASK_ID" 2>"$work/part-\$SLURM_ARRAY_TASK_ID.err"
JOB
sbatch --wait "$work/array.sh" >&2 || { cat "$work"/part-*.log "$work"/part-*.err >&2; exit 1; }

{ time "$program" rank "$plan" --gather "$work/parts" --out "$work/gathered" >/dev/null 2>&1; } \
    2>"$work/gather.time"
{ time "$program" rank "$plan" --threads 1 --out "$work/whole" >/dev/null 2>&1; } 2>"$work/whole.time"

differing=$(diff -rq "$work/whole" "$work/gathered" | wc -l)
cat "$work"/part-*.log >"$work/parts.time"
whole=$(seconds "$work/whole.time")
echo "figure slurm_parts $(ls "$work"/parts/*/*.parquet | wc -l) count"
echo "figure slurm_files_differing $differing count"
awk -v parts="$(seconds "$work/parts.time")" -v gather="$(seconds "$work/gather.time")" -v whole="$whole" \
    'BEGIN { printf "figure slurm_parts_cost %.2f times\nfigure gathering_costs %.2f times\n", parts / whole, gather / whole }'
# Links that are kept: every site to every post on every channel with a station.
links=$("$program" rank "$plan" --json --maps none 2>/dev/null | python3 -c '
import json, sys
rankings = json.load(sys.stdin)["result"]["rankings"]
print(sum(len(site["posts"]) for ranking in rankings for site in ranking["sites"]))')
bytes=$(cat "$work"/parts/*/*.parquet | wc -c)
echo "figure part_bytes_a_post $((bytes / links)) bytes"
[ "$differing" = 0 ]
