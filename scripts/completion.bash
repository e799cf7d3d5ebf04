# bash completion for plateproof

# _plateproof_options COMMAND: every option that it takes
_plateproof_options() {
  local of_all="--quiet --threads --help --version" output="--output" json="--json" own=""
  case $1 in
    inspect | flatness | holddown | holes | stack | roughing) own="--xlsx --qif-gz --paper --pack --replace-signed --progress-fd --debug-checks" ;;
    bundle) own="--paper --pack --replace-signed" ;;
    compare) own="--rounds --inputs" ;;
    correct) own="--from --history --machine --last --limit --use --machine-sets --cap --step" ;;
    history) own="--replace --with-operator --machine --date --where --since --until --base --days --lower --upper --limit --share" ;;
    pattern) own="--layout --pitch --diameter --width --height --hole --margin --start --centre --lanes-x --lanes-y --units --from" ;;
    pins) own="--webs" ;;
    rules) output="" own="--tube --pitch --thickness --part --fit --table --span --ligament-minimum --width --length" ;;
    sample) own="--count --seed --more" ;;
    verify) output="" own="--inputs --trust --revoked --signature-only --outside" ;;
    pack) output="" json="" own="--inputs --outside" ;;
    keys) json="" own="--passphrase --no-passphrase" ;;
    sign) output="" json="" own="--key --role --as-is --inputs --outside --passphrase" ;;
    new) output="" json="" own="--units" ;;
    serve) output="" json="" own="--port --open --idle-exit" ;;
  esac
  echo "$of_all $output $json $own"
}

# _plateproof_values OPTION COMMAND WORD: what may follow an option; fails where anything may
_plateproof_values() {
  local words=""
  case $1 in
    -o | --output)
      case $2 in
        pattern | pins | sample) compgen -f -- "$3" ;;
        *) compgen -d -- "$3" ;;
      esac
      return 0 ;;
    --inputs) compgen -d -- "$3"; return 0 ;;
    --key) compgen -f -X '!*.key' -- "$3"; compgen -d -- "$3"; return 0 ;;
    --passphrase | --revoked) compgen -f -- "$3"; return 0 ;;
    --role) words="inspector customer third-party" ;;
    --trust) compgen -f -X '!*.pub' -- "$3"; compgen -d -- "$3"; return 0 ;;
    --paper) words="A4 Letter" ;;
    --part) words="tube-plate baffle" ;;
    --fit) words="standard close" ;;
    --table) words="inch metric" ;;
    --units) words="mm inch" ;;
    --layout) words="30 60 90 45" ;;
    --from) compgen -f -- "$3"; return 0 ;;
    --history) compgen -f -- "$3"; return 0 ;;
    --use) words="field terms" ;;
    --machine-sets) words="scale squareness" ;;
    --where) words="supplier= heat= machine= operator= instrument= role= stage=" ;;
    --start) words="hole cell" ;;
    --threads | --tube | --pitch | --thickness | --span | --ligament-minimum | --width | --height | --length | \
      --machine | --date | --since | --until | --base | --last | --cap | --step | --lower | --upper | --limit | --share | \
      --diameter | --hole | --margin | --centre | --lanes-x | --lanes-y | --count | --seed | --port | --idle-exit | --progress-fd) return 0 ;;
    *) return 1 ;;
  esac
  compgen -W "$words" -- "$3"
  return 0
}

_plateproof() {
  local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD - 1]} command=${COMP_WORDS[1]} values
  if [ "$COMP_CWORD" -eq 1 ]; then
    mapfile -t COMPREPLY < <(compgen -W "inspect flatness holddown holes bundle stack roughing compare correct history pattern pins rules sample verify pack keys sign new serve --help --version" -- "$word")
    return
  fi
  if values=$(_plateproof_values "$before" "$command" "$word"); then
    mapfile -t COMPREPLY < <(printf '%s' "${values:+$values$'\n'}")
    return
  fi
  if [[ $word == -* ]]; then
    mapfile -t COMPREPLY < <(compgen -W "$(_plateproof_options "$command")" -- "$word")
    return
  fi
  case $command in
    rules)
      mapfile -t COMPREPLY < <(compgen -W "$(plateproof rules 2>/dev/null | sed -n 's/ .*//p' | grep -v '^plateproof')" -- "$word"
        compgen -f -X '!*.ini' -- "$word") ;;
    history)
      if [ "$COMP_CWORD" -eq 2 ]; then
        mapfile -t COMPREPLY < <(compgen -W "add note list chart share capability trend causes tools page check" -- "$word")
      else
        mapfile -t COMPREPLY < <(compgen -f -- "$word")
      fi ;;
    verify | sign | serve | compare) mapfile -t COMPREPLY < <(compgen -d -- "$word") ;;
    inspect | flatness | holddown | holes | bundle | stack | roughing | pins | sample | new | correct)
      mapfile -t COMPREPLY < <(compgen -f -X '!*.ini' -- "$word"; compgen -d -- "$word") ;;
  esac
}
complete -o filenames -F _plateproof plateproof
