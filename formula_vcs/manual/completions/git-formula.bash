# shellcheck shell=bash disable=SC2154
# (SC2154: cur, prev, words and cword are set by git's completion, which calls this one.)
# Made by .ci/compile from the parsers of the commands and from formula_vcs/usage/git-formula.bash.in.
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
			workspace.toml|ingredients/*|equipment/*|rules/*|batches/*|lots/*|evidence/*|approvals/*)
				continue
				;;
			esac
		fi
		id="${file##*/}"
		printf '%s\n' "${id%.toml}"
	done
}

# A word of "$1", an id of the kinds that follow, or ID@REV. Without bash-completion, `@` is a word of its own in COMP_WORDS (bash 5.2), though readline
# replaces it together with what follows.
__git_formula_complete_id ()
{
	local kind ids="${1// /$'\n'}"$'\n'
	shift
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

# Whether the word before the one that is completed is an option of the command "$1" that takes it.
__git_formula_complete_value ()
{
	local option="$prev" value="$cur"
	case "$cur" in
	--*=*)
		option="${cur%%=*}"
		value="${cur#*=}"
		;;
	esac
	case "$1,$option" in
	init,--hooks)
		__gitcomp "auto plain pre-commit none" "" "$value"
		;;
	check,--rev|check,--merge|show,--rev|blame,--rev|log,--rev|log,--since|label,--rev|uses,--rev|propose,--rev|survey,--rev|batch,--rev|approve,--rev|trace,--rev|new,--rev|list,--rev|export,--rev|document,--since|document,--rev)
		__git_complete_refs --cur="$value"
		;;
	check,--guard|review,--guard)
		__gitcomp "block warn" "" "$value"
		;;
	check,--as-of|check,--horizon|check,--explain|check,--workspace|show,--batch|show,--as-of|show,--workspace|diff,--as-of|diff,--workspace|review,--as-of|review,--workspace|review,--only|review,--without|review,--patch|blame,--workspace|log,--below|log,--above|log,-n|log,--as-of|log,--workspace|label,--as-of|label,--workspace|uses,--inci|uses,--cas|uses,--entry|uses,--function|uses,--batch|uses,--as-of|uses,--workspace|propose,--target|propose,--move|propose,--most|propose,--patch|propose,--batch|propose,--as-of|propose,--workspace|survey,--price|survey,--replace|survey,--rule|survey,--as-of|survey,--without|survey,--on|survey,--jobs|survey,--workspace|batch,--size|batch,--packs|batch,--overfill|batch,--yield|batch,--date|batch,--by|batch,--lot|batch,--id|batch,--without-claim|batch,--weighings|batch,--result|batch,--made|batch,-o|batch,--output|batch,--as-of|batch,--workspace|approve,--role|approve,--condition|approve,--withdraw|approve,--as-of|approve,--workspace|trace,--last|trace,-o|trace,--output|trace,--workspace|import,--sheet|import,--since|import,--column|import,--unit|import,--name|import,--workspace|new,--title|new,--product|new,--id|new,--supplier|new,--code|new,--report|new,--passed|new,--substance|new,--at-most|new,--workspace|list,--without|list,--as-of|list,--workspace|export,-o|export,--output|export,--as-of|export,--workspace|document,--by|document,-o|document,--output|document,--as-of|document,--workspace|schema,--workspace|help,--html|help,--man)
		: # typed, or the name of a file
		;;
	check,--fail-on|review,--fail-on)
		__gitcomp "block warn note never" "" "$value"
		;;
	check,--format|review,--format)
		__gitcomp "text json markdown html github gitlab sarif junit" "" "$value"
		;;
	show,--format|diff,--format|blame,--format|label,--format|explain,--format|propose,--format|trace,--format|list,--format)
		__gitcomp "text json markdown html" "" "$value"
		;;
	diff,--figure|review,--figure|log,--figure)
		__gitcomp "total cost_per_kg cost_per_pack density water formulation_water natural natural_origin organic organic_origin natural_without_water natural_origin_without_water organic_without_water organic_origin_without_water cosmos_ppai cosmos_ppai_organic cosmos_ppai_organic_share cosmos_organic_total cosmos_mineral cosmos_pemo cosmos_nni cosmos_natural_origin nop_organic nop_organic_label density_corrected water_activity free_acid ph_estimate fluoride_ppm active_ppm active_matter required_hlb emulsifier_hlb" "" "$value"
		;;
	log,--charge)
		__gitcomp_nl "$(__git_formula_ids ingredients "$value")" "" "$value"
		;;
	log,--format)
		__gitcomp "text json csv markdown html" "" "$value"
		;;
	label,--market|survey,--market)
		__gitcomp "EU US" "" "$value"
		;;
	uses,--lot)
		__gitcomp_nl "$(__git_formula_ids lots "$value")" "" "$value"
		;;
	uses,--format|survey,--format)
		__gitcomp "text json markdown html csv" "" "$value"
		;;
	propose,--by)
		__gitcomp "smallest cheapest" "" "$value"
		;;
	survey,--sort)
		__gitcomp "worst id cost change limit claims" "" "$value"
		;;
	survey,--by)
		__gitcomp "product market status" "" "$value"
		;;
	batch,--on)
		__gitcomp_nl "$(__git_formula_ids equipment "$value")" "" "$value"
		;;
	batch,--format)
		__gitcomp "text html pdf json markdown" "" "$value"
		;;
	trace,--against|new,--from)
		__gitcomp_nl "$(__git_formula_ids recipes "$value")" "" "$value"
		;;
	import,--as)
		__gitcomp "formulas materials prices allergens weighings" "" "$value"
		;;
	import,--decimal)
		__gitcomp ", ." "" "$value"
		;;
	import,--fractions)
		__gitcomp "yes no" "" "$value"
		;;
	import,--hidden)
		__gitcomp "take leave" "" "$value"
		;;
	import,--single-inci)
		__gitcomp "100 unknown" "" "$value"
		;;
	import,--batch)
		__gitcomp_nl "$(__git_formula_ids batches "$value")" "" "$value"
		;;
	new,--form)
		__gitcomp "emulsion aqueous anhydrous surfactant paste powder bar" "" "$value"
		;;
	new,--is)
		__gitcomp "vessel rotor-stator stirrer propeller balance stability challenge-test safety-assessment certificate artwork notification process-validation pack-compatibility spf-test efficacy patch-test use-test fluoride-recovery rda" "" "$value"
		;;
	export,--decimal)
		__gitcomp ". ," "" "$value"
		;;
	document,--format)
		__gitcomp "text markdown html pdf docx" "" "$value"
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
			__gitcomp "init check show diff review blame log label uses explain propose survey batch approve trace import new list export document schema serve-editor help demo"
			;;
		esac
		return
	fi

	__git_formula_complete_value "$command" && return

	case "$command,$cur" in
	init,-*)
		__gitcomp "--undo --status --dry-run --force --hooks= --no-diff-driver --git"
		;;
	check,-*)
		__gitcomp "--staged --rev= --merge --guard= --as-of= --horizon= --fail-on= --format= --hook --how --no-cache --explain= --workspace="
		;;
	show,-*)
		__gitcomp "--format= --batch= --process --preservation --evidence --approvals --rev= --as-of= --workspace="
		;;
	diff,-*)
		__gitcomp "--staged --cached --format= --as-of= --figure= --workspace= --exit-code"
		;;
	review,-*)
		__gitcomp "--staged --cached --format= --as-of= --figure= --workspace= --only= --without= --patch= --fail-on= --guard="
		;;
	blame,-*)
		__gitcomp "--rev= --first-parent --format= --workspace="
		;;
	log,-*)
		__gitcomp "--rev= --charge= --figure= --below= --above= --since= --first-parent --as-of= --format= --workspace="
		;;
	label,-*)
		__gitcomp "--market= --format= --rev= --as-of= --workspace="
		;;
	uses,-*)
		__gitcomp "--inci= --cas= --entry= --function= --lot= --batch= --format= --rev= --as-of= --workspace="
		;;
	explain,-*)
		__gitcomp "--format="
		;;
	propose,-*)
		__gitcomp "--target= --move= --by= --most= --patch= --batch= --format= --rev= --as-of= --workspace="
		;;
	survey,-*)
		__gitcomp "--price= --replace= --rule= --as-of= --market= --without= --on= --sort= --by= --label --deadline --jobs= --rev= --format= --workspace="
		;;
	batch,-*)
		__gitcomp "--size= --packs= --overfill= --yield= --on= --date= --by= --lot= --id= --without-claim= --dry-run --weighings= --result= --made= --close --partial --replace --format= --output= --rev= --as-of= --workspace="
		;;
	approve,-*)
		__gitcomp "--role= --condition= --withdraw= --trust --yes --rev= --as-of= --workspace="
		;;
	trace,-*)
		__gitcomp "--against-recipe --against= --last= --rev= --format= --output= --workspace="
		;;
	import,-*)
		__gitcomp "--write --dry-run --diff --all --as= --sheet= --decimal= --fractions= --hidden= --single-inci= --since= --batch= --replace --column= --unit= --name= --workspace="
		;;
	new,-*)
		__gitcomp "--title= --product= --form= --from= --id= --supplier= --code= --pure --is= --report= --passed= --rev= --substance= --at-most= --dry-run --workspace="
		;;
	list,-*)
		__gitcomp "--without= --format= --rev= --as-of= --workspace="
		;;
	export,-*)
		__gitcomp "--output= --decimal= --rev= --as-of= --workspace="
		;;
	document,-*)
		__gitcomp "--since= --by= --plain --format= --output= --rev= --as-of= --workspace="
		;;
	schema,-*)
		__gitcomp "--write --catalog --workspace="
		;;
	serve-editor,-*)
		__gitcomp "--stdio"
		;;
	help,-*)
		__gitcomp "--html= --man="
		;;
	show,*)
		__git_formula_complete_id "" recipes ingredients
		;;
	diff,*)
		if ! __git_has_doubledash; then
			__git_complete_revlist
		fi
		;;
	review,*)
		if ! __git_has_doubledash; then
			__git_complete_revlist
		fi
		;;
	blame,*)
		__git_formula_complete_id "" recipes
		;;
	log,*)
		__git_formula_complete_id "" recipes
		;;
	label,*)
		__git_formula_complete_id "" recipes
		;;
	uses,*)
		__git_formula_complete_id "" ingredients
		;;
	propose,*)
		__git_formula_complete_id "" recipes
		;;
	batch,*)
		__git_formula_complete_id "sheet record cost" recipes batches
		;;
	approve,*)
		__git_formula_complete_id "" recipes
		;;
	trace,*)
		__git_formula_complete_id "" batches
		;;
	new,*)
		__git_formula_complete_id "recipe ingredient premix lot equipment packaging evidence rule"
		;;
	list,*)
		__git_formula_complete_id "recipes premixes ingredients equipment packaging lots batches evidence rules"
		;;
	export,*)
		__git_formula_complete_id "recipes materials composition prices allergens portfolio weighings comparison" recipes batches
		;;
	document,*)
		__git_formula_complete_id "composition specification ingredients allergens instructions change-note claims" recipes
		;;
	schema,*)
		__git_formula_complete_id "recipe ingredient packaging equipment lot batch evidence rule trust workspace import"
		;;
	help,*)
		__git_formula_complete_id "accepting annexes approvals batches begin changelog checks chemistry claims commands deadlines deceptive-names documents editors evidence files guard history keys law limits merging names numbers pairs products proposals pull-requests review review-effects sheets survey two-at-once united-states"
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
