# shellcheck shell=bash disable=SC2154
# (SC2154: cur, prev, words and cword are set by git's completion, which calls this one.)
# Completion of `git formula ...` and `git-formula ...` for bash.
# git's own completion calls _git_formula, and loads this file when it is found as
# share/bash-completion/completions/git-formula. Sourcing it after git's completion does as well.

# The folder of the nearest workspace: here or above; else, at the top of the repository, one folder down.
__git_formula_workspace ()
{
	local dir="$PWD" found
	while :; do
		if [ -f "$dir/workspace.toml" ]; then
			printf '%s' "$dir"
			return 0
		fi
		if [ -e "$dir/.git" ]; then
			for found in "$dir"/*/workspace.toml; do
				if [ -f "$found" ]; then
					printf '%s' "${found%/workspace.toml}"
					return 0
				fi
			done
			return 1
		fi
		[ -n "$dir" ] || return 1
		dir="${dir%/*}"
	done
}

# The ids in a workspace, one a line: `recipes`, `ingredients`, `batches` ..., those that begin as the second argument.
# It runs inside $( ), so what it sets ends with it.
__git_formula_ids ()
{
	local workspace file id
	workspace="$(__git_formula_workspace)" || return 0
	cd -- "$workspace" 2>/dev/null || return 0
	shopt -s nullglob
	# bash 3 has no globstar: there, ** is * and finds recipes one folder down.
	shopt -s globstar 2>/dev/null
	local -a files
	if [ "$1" != recipes ]; then
		files=("$1"/"$2"*.toml)
	else
		files=("$2"*.toml */**/"$2"*.toml)
	fi
	for file in "${files[@]}"; do
		if [ "$1" = recipes ]; then
			case "$file" in
			workspace.toml|ingredients/*|equipment/*|rules/*|batches/*|lots/*|evidence/*)
				continue
				;;
			esac
		fi
		id="${file##*/}"
		printf '%s\n' "${id%.toml}"
	done
}

# An id, or ID@REV. Without bash-completion, `@` is a word of its own in COMP_WORDS (bash 5.2), though readline
# replaces it together with what follows.
__git_formula_complete_id ()
{
	local kind ids=""
	case "$cur" in
	*@*)
		__git_complete_refs --pfx="${cur%%@*}@" --cur="${cur#*@}"
		return
		;;
	esac
	if [ "$prev" = @ ]; then
		__git_complete_refs --pfx=@
		return
	fi
	for kind in "$@"; do
		ids="$ids$(__git_formula_ids "$kind" "$cur")"$'\n'
	done
	__gitcomp_nl "${ids%$'\n'}"
}

# Whether the word before the one that is completed is an option that takes it.
__git_formula_complete_value ()
{
	local option="$prev" value="$cur"
	case "$cur" in
	--*=*)
		option="${cur%%=*}"
		value="${cur#*=}"
		;;
	esac
	case "$option" in
	--format)
		__gitcomp "text markdown json html github gitlab sarif junit" "" "$value"
		;;
	--guard)
		__gitcomp "block warn" "" "$value"
		;;
	--fail-on)
		__gitcomp "block warn note never" "" "$value"
		;;
	--hooks)
		__gitcomp "auto plain pre-commit none" "" "$value"
		;;
	--figure)
		__gitcomp "cost_per_kg cost_per_pack density water formulation_water natural natural_origin organic organic_origin cosmos_organic_total nop_organic" "" "$value"
		;;
	--charge)
		__gitcomp_nl "$(__git_formula_ids ingredients "$value")" "" "$value"
		;;
	--market)
		__gitcomp "EU US" "" "$value"
		;;
	--rev)
		__git_complete_refs --cur="$value"
		;;
	--against)
		__gitcomp_nl "$(__git_formula_ids recipes "$value")" "" "$value"
		;;
	--on)
		__gitcomp_nl "$(__git_formula_ids equipment "$value")" "" "$value"
		;;
	--form)
		__gitcomp "emulsion aqueous anhydrous surfactant paste powder bar" "" "$value"
		;;
	--from)
		__gitcomp_nl "$(__git_formula_ids recipes "$value")" "" "$value"
		;;
	--is)
		__gitcomp "vessel rotor-stator stirrer propeller balance stability challenge-test safety-assessment certificate artwork notification process-validation pack-compatibility" "" "$value"
		;;
	--as)
		__gitcomp "formulas materials prices allergens weighings" "" "$value"
		;;
	--hidden)
		__gitcomp "take leave" "" "$value"
		;;
	--fractions)
		__gitcomp "yes no" "" "$value"
		;;
	--single-inci)
		__gitcomp "100 unknown" "" "$value"
		;;
	--workspace)
		# Nothing offered leaves the word to bash, which completes the names of folders.
		;;
	--as-of|--since|--below|--above|--horizon|--batch|--explain|--size|--inci|--packs|--overfill|--yield|--date|--by|--lot|--id|--without-claim|--result|--made|--last|--decimal|--title|--product|--supplier|--code|--report|--passed|--substance|--at-most|--sheet|--without|--column|--unit|--name)
		# A date, a mass, the name of a rule: typed.
		;;
	*)
		return 1
		;;
	esac
}

_git_formula ()
{
	local at command="" c
	if [ -n "${__git_cmd_idx-}" ]; then
		at="$__git_cmd_idx"
	else
		# git before 2.31 does not say where its command stands.
		at=0
		if [ "${words[0]##*/}" = git ]; then
			while [ "$at" -lt "$cword" ] && [ "${words[at]}" != formula ]; do
				at=$((at + 1))
			done
		fi
	fi
	for ((c = at + 1; c < cword; c++)); do
		case "${words[c]}" in
		-*)
			;;
		*)
			command="${words[c]}"
			break
			;;
		esac
	done

	if [ -z "$command" ]; then
		case "$cur" in
		-*)
			__gitcomp "-h --help"
			;;
		*)
			__gitcomp "init check show diff review blame log label uses explain trace batch new list import export help demo"
			;;
		esac
		return
	fi

	__git_formula_complete_value && return

	case "$command,$cur" in
	init,-*)
		__gitcomp "--dry-run --undo --force --status --hooks= --no-diff-driver --git"
		;;
	check,-*)
		__gitcomp "--staged --rev= --merge --as-of= --horizon= --fail-on= --how --format= --explain= --hook --no-cache --workspace="
		;;
	show,-*)
		__gitcomp "--format= --rev= --as-of= --batch= --process --preservation --evidence --workspace="
		;;
	batch,-*)
		__gitcomp "--size= --packs= --overfill= --yield= --on= --date= --by= --lot= --id= --without-claim= --dry-run --weighings= --result= --made= --close --partial --replace --format= --output= --rev= --as-of= --workspace="
		;;
	diff,-*)
		__gitcomp "--staged --cached --figure= --format= --as-of= --exit-code --workspace="
		;;
	review,-*)
		__gitcomp "--staged --cached --figure= --only= --without= --patch= --format= --as-of= --fail-on= --guard= --workspace="
		;;
	blame,-*)
		__gitcomp "--first-parent --format= --rev= --workspace="
		;;
	log,-*)
		__gitcomp "--figure= --charge= --below= --above= --since= --first-parent --format= --rev= --as-of= --workspace="
		;;
	label,-*)
		__gitcomp "--market= --format= --rev= --as-of= --workspace="
		;;
	explain,-*)
		__gitcomp "--format="
		;;
	uses,-*)
		__gitcomp "--inci= --cas= --entry= --function= --lot= --batch= --format= --rev= --as-of= --workspace="
		;;
	new,-*)
		__gitcomp "--title= --product= --form= --from= --id= --supplier= --code= --pure --is= --report= --passed= --rev= --substance= --at-most= --dry-run --workspace="
		;;
	new,*)
		__gitcomp "recipe ingredient premix lot equipment evidence rule"
		;;
	list,-*)
		__gitcomp "--without= --format= --rev= --as-of= --workspace="
		;;
	list,*)
		__gitcomp "recipes premixes ingredients equipment lots batches evidence rules"
		;;
	help,*)
		__gitcomp "accepting annexes batches begin changelog checks chemistry claims deadlines deceptive-names evidence files guard history keys law limits merging names numbers pairs products pull-requests review-effects review sheets two-at-once united-states"
		;;
	export,-*)
		__gitcomp "--output= --decimal= --rev= --as-of= --workspace="
		;;
	export,*)
		__gitcomp "recipes materials composition prices allergens portfolio weighings comparison"
		;;
	import,-*)
		__gitcomp "--write --dry-run --diff --all --as= --sheet= --decimal= --fractions= --hidden= --single-inci= --since= --batch= --replace --column= --unit= --name= --workspace="
		;;
	trace,-*)
		__gitcomp "--against-recipe --against= --last= --format= --output= --rev= --workspace="
		;;
	show,*)
		__git_formula_complete_id recipes ingredients
		;;
	label,*|blame,*|log,*|batch,*)
		__git_formula_complete_id recipes
		;;
	uses,*)
		__git_formula_complete_id ingredients
		;;
	trace,*)
		__gitcomp_nl "$(__git_formula_ids batches "$cur")"
		;;
	diff,*|review,*)
		# Nothing offered, as after `--`, leaves the word to bash, which completes the names of files.
		if ! __git_has_doubledash; then
			__git_complete_revlist
		fi
		;;
	esac
}

# `git-formula` typed as one word, where git's completion is there, or can be fetched.
if ! declare -F __git_complete >/dev/null; then
	if declare -F _comp_load >/dev/null; then
		_comp_load git
	elif declare -F _completion_loader >/dev/null; then
		_completion_loader git
	fi
fi
if declare -F __git_complete >/dev/null; then
	__git_complete git-formula _git_formula
fi
