# The text of `diff.formula.command`, which git runs with sh and appends "$@" to.
#
# `git formula init` drops these comment lines, joins the rest with spaces (so each line ends with ; or a keyword)
# and puts the path of the installed git-formula in place of @PROGRAM@. The first line is the mark by which
# `init` knows its own text again.
#
# git 2.39 ends the whole `git diff` when a driver ends with anything but 0, a missing program included. So all
# ways lead to `return 0`, and where git-formula cannot help the reader gets the plain text diff. git-formula
# keeps to its side: it writes to stdout only when it will end with 0.
# SIGPIPE is ignored (and so it is in all that is started here): a pager that was closed is no error.
# Arguments: 7, or 9 after a rename (8 is the new path, 9 git's own lines about it), or 1 for an unmerged path.
: git-formula diff driver 1;
formula() {
    trap '' PIPE;
    if [ "$GIT_FORMULA_DIFF" != off ]; then
        if command -v git-formula >/dev/null 2>&1; then
            git-formula diff-driver "$@" && return 0;
        elif [ -x @PROGRAM@ ]; then
            @PROGRAM@ diff-driver "$@" && return 0;
        fi;
    fi;
    text "$@" 2>/dev/null;
    return 0;
};
text() {
    old=$(clean "$1");
    new=$(clean "${8:-$1}");
    if [ $# -lt 7 ]; then printf '* Unmerged path %s\n' "$old"; return 0; fi;
    printf 'diff --git a/%s b/%s\n' "$old" "$new";
    from="a/$old"; to="b/$new";
    if [ "$2" = /dev/null ]; then from=/dev/null; printf 'new file mode %s\n' "$7";
    elif [ "$5" = /dev/null ]; then to=/dev/null; printf 'deleted file mode %s\n' "$4";
    elif [ "$4" != "$7" ]; then printf 'old mode %s\nnew mode %s\n' "$4" "$7";
    fi;
    if [ -n "$9" ]; then printf '%s' "$9"; fi;
    if cmp -s "$2" "$5"; then return 0; fi;
    printf '%s %s\n' --- "$from" +++ "$to";
    hunks "$2" "$5";
};
clean() { printf '%s' "$1" | LC_ALL=C tr '\001-\037\177' '?'; };
hunks() {
    tty=false; colour=never;
    if [ -t 1 ] || [ -n "$GIT_PAGER_IN_USE" ]; then tty=true; fi;
    if [ -z "$NO_COLOR" ] && [ "$(git config --get-colorbool color.diff $tty)" = true ]; then colour=always; fi;
    git --no-pager diff --no-index --no-ext-diff --no-textconv --color=$colour -- "$1" "$2" |
        LC_ALL=C sed -e '1,/@@ -/{/@@ -/!{/^Binary/!d;};}';
};
formula
