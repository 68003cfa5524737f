# Completion for bash of kniferail, kniferaild, kniferail-panel and kniferail-sim. Commands and options are asked of the
# programs themselves.

_kniferail_options() {
    "$@" 2>/dev/null | grep -oE -- '--[a-z][a-z-]*' | sort -u
}

_kniferail() {
    local cur=${COMP_WORDS[COMP_CWORD]} program=${COMP_WORDS[0]} command=${COMP_WORDS[1]-}
    if [[ ${program##*/} == kniferail ]]; then
        if ((COMP_CWORD == 1)); then
            mapfile -t COMPREPLY < <(compgen -W "$("$program" help 2>/dev/null | sed -n 's/^  kniferail \([a-z]*\) .*/\1/p')" -- "$cur")
            return
        fi
        if [[ $command == book && $COMP_CWORD -eq 2 && $cur != -* ]]; then
            mapfile -t COMPREPLY < <(compgen -W "backup check prune" -- "$cur")
            return
        fi
        if [[ $command == knives && $COMP_CWORD -eq 2 && $cur != -* ]]; then
            mapfile -t COMPREPLY < <(compgen -W "list life due export import" -- "$cur")
            return
        fi
        if [[ $command == trace && $COMP_CWORD -eq 2 && $cur != -* ]]; then
            mapfile -t COMPREPLY < <(compgen -W "list save show replay" -- "$cur")
            return
        fi
        if [[ $command == help ]]; then
            mapfile -t COMPREPLY < <(compgen -W "config $("$program" help 2>/dev/null | sed -n 's/^  kniferail \([a-z]*\) .*/\1/p')" -- "$cur")
            return
        fi
        [[ $cur != -* ]] || mapfile -t COMPREPLY < <(compgen -W "$(_kniferail_options "$program" help "$command")" -- "$cur")
        return
    fi
    [[ $cur != -* ]] || mapfile -t COMPREPLY < <(compgen -W "$(_kniferail_options "$program" --help)" -- "$cur")
}

complete -o default -F _kniferail kniferail kniferaild kniferail-panel kniferail-sim
