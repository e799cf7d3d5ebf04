# bash completion for plateproof
_plateproof() {
  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]} command=${COMP_WORDS[1]}
  local common="--output --json --quiet --threads --help --version"
  if [ "$COMP_CWORD" -eq 1 ]; then
    mapfile -t COMPREPLY < <(compgen -W "inspect flatness holddown holes pattern pins rules sample verify keys sign new --help --version" -- "$word")
    return
  fi
  case $before in
    -o | --output | --inputs) mapfile -t COMPREPLY < <(compgen -d -- "$word"); return ;;
    --threads | --tube | --pitch | --thickness | --span | --count | --seed) return ;;
    --paper) mapfile -t COMPREPLY < <(compgen -W "A4 Letter" -- "$word"); return ;;
    --key | --trust) mapfile -t COMPREPLY < <(compgen -f -- "$word"); return ;;
  esac
  if [[ $word == -* ]]; then
    local own=""
    case $command in
      inspect | flatness | holddown | holes) own="--xlsx --paper" ;;
      rules) own="--tube --pitch --thickness --part --span --fit --table" ;;
      verify) own="--inputs --trust" ;;
      sign) own="--key" ;;
      sample) own="--count --seed --more" ;;
    esac
    mapfile -t COMPREPLY < <(compgen -W "$common $own" -- "$word")
    return
  fi
  case $command in
    rules) mapfile -t COMPREPLY < <(compgen -W "tema-style gbt-151-style" -f -- "$word") ;;
    verify | sign) mapfile -t COMPREPLY < <(compgen -d -- "$word") ;;
    *) mapfile -t COMPREPLY < <(compgen -f -X '!*.ini' -- "$word"; compgen -d -- "$word") ;;
  esac
}
complete -o filenames -F _plateproof plateproof
