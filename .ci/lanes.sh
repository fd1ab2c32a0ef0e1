# Steps side by side; to be sourced. What a step says goes into a file of its own, which is printed
# whole when the step ends, so that two steps never speak at once. A step that fails, or that does
# not end in time, ends the others and the run at once, and is named.
#
#   lanes COUNT FOLDER STEP...     a step is a file, or a function that is exported
#
# Who sources it has `say`, `fail` and `began`, and `trap end_lanes EXIT`.
#
# STEP_LIMIT_S: what a step may take, seconds (1800); none is to need half of it.

# What runs: the names of the steps by their process, and when they began.
declare -A lane_step=() lane_began=()

end_lanes() {
    local pid
    for pid in "${!lane_step[@]}"; do
        echo "ended: ${lane_step[$pid]}; what it said until then: $(lane_file "${lane_step[$pid]}")" >&2
    done
    lane_stop "${!lane_step[@]}"
    lane_step=()
}

# Ends steps, each a process that leads a group. Its shell alone first, which has ten seconds to tidy
# up: a signal to the group would end what it tidies up with. Then whatever is left of the group.
lane_stop() { # PROCESS...
    local pid
    for pid in "$@"; do kill -TERM "$pid" 2>/dev/null || true; done
    for pid in "$@"; do
        for _ in $(seq 100); do
            kill -0 "$pid" 2>/dev/null || break
            sleep 0.1
        done
        kill -KILL -- "-$pid" 2>/dev/null || true
    done
}

lane_file() { echo "$lane_folder/$(basename "$1").txt"; }

lane_begin() { # STEP
    local command=$1
    [ ! -f "$1" ] || command="bash $1"
    echo "-- $1 begins ($((SECONDS - began)) s)"
    # With job control: the step leads a group of its own. A shell without it also lets what it puts
    # aside ignore interrupts, and there are checks of just those.
    set -m
    bash -euo pipefail -c "$command" >"$(lane_file "$1")" 2>&1 </dev/null &
    set +m
    lane_step[$!]=$1 lane_began[$!]=$SECONDS
}

lane_end() { # PROCESS CODE
    local step=${lane_step[$1]} took=$((SECONDS - ${lane_began[$1]}))
    unset "lane_step[$1]"
    say "$step, which took $took s"
    cat "$(lane_file "$step")"
    [ "$2" -ne 0 ] || return 0
    [ "$took" -lt "${STEP_LIMIT_S:-1800}" ] ||
        fail "$step did not end within ${STEP_LIMIT_S:-1800} s"
    fail "$step failed with code $2; what it said stands above"
}

lanes() { # COUNT FOLDER STEP...
    local count=$1 pid code
    lane_folder=$2
    shift 2
    mkdir -p "$lane_folder"
    while [ $# -gt 0 ] || [ "${#lane_step[@]}" -gt 0 ]; do
        while [ $# -gt 0 ] && [ "${#lane_step[@]}" -lt "$count" ]; do
            lane_begin "$1"
            shift
        done
        # Looked at in turn: `wait -n` of bash 5.2 does not know what ended before it was called.
        for pid in "${!lane_step[@]}"; do
            if kill -0 "$pid" 2>/dev/null; then
                [ "$((SECONDS - ${lane_began[$pid]}))" -ge "${STEP_LIMIT_S:-1800}" ] || continue
                lane_stop "$pid"
            fi
            code=0
            wait "$pid" || code=$?
            lane_end "$pid" "$code"
        done
        sleep 0.2
    done
}
