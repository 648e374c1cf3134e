# The text of `merge.formula.driver`, which git runs with sh after it has put its own values in place of %O, %A ...
#
# `git formula init` drops these comment lines, joins the rest with spaces (so each line ends with ; or a keyword)
# and puts the path of the installed git-formula in place of @PROGRAM@. The first line is the mark by which
# `init` knows its own text again. No percent sign may stand here but those that git is to replace.
#
# git's own text merge comes first, and is put in place whole (mv). From then on a kill at any moment leaves ours with
# markers, or a full result: git-formula writes beside, and its result is moved in only once its verdict is known.
# Before that, ours stands alone in the file, and git calls a driver that was killed a conflict, or an error.
# Where git-formula is missing, crashes or cannot read a side, the text merge and its exit status stay.
# Arguments: base, ours, theirs, marker size, path, and from git 2.44 on the labels of base, ours and theirs; before,
# these come as the letters that were written.
: git-formula merge driver 1;
formula() {
    base=base; ours=ours; theirs=theirs;
    case "$6$7$8" in
        ?[SXY]?[SXY]?[SXY]|'') ;;
        *) base=${6:-base}; ours=${7:-ours}; theirs=${8:-theirs} ;;
    esac;
    aside=$2.ours; text=$2.text;
    trap 'rm -f -- "$aside" "$text"' EXIT;
    trap 'exit 129' HUP INT TERM;
    git merge-file -p -q --diff3 --marker-size="$4" -L "$ours" -L "$base" -L "$theirs" "$2" "$1" "$3" >"$text";
    status=$?;
    if [ "$status" -gt 127 ] || ! cp -- "$2" "$aside"; then return 1; fi;
    mv -f -- "$text" "$2" || return 1;
    if [ "$status" -ne 0 ]; then status=1; fi;
    if [ "$GIT_FORMULA_MERGE" = off ]; then return "$status"; fi;
    program=git-formula;
    if ! command -v "$program" >/dev/null 2>&1; then program=@PROGRAM@; fi;
    if ! command -v "$program" >/dev/null 2>&1; then
        printf '%s\n' "git-formula is not installed here: $5 was merged line by line, which knows no recipes" >&2;
        return "$status";
    fi;
    "$program" merge-driver --text "$2" --text-status "$status" -- "$1" "$aside" "$3" "$4" "$5" "$base" "$ours" "$theirs"
        >/dev/null </dev/null;
    verdict=$?;
    if [ "$verdict" -le 1 ] && mv -f -- "$aside" "$2"; then return "$verdict"; fi;
    return "$status";
};
formula %O %A %B %L %P %S %X %Y
