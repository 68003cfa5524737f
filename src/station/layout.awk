# Reads what `readelf --debug-dump=info` says of layout_probe.c, and writes the rows that layout.c includes: each type
# once, in the order in which they are met from the roots on, so that compilers which list them in another order give
# the same. What a replay could not compare bit for bit (a pointer, a union, a bit field) ends the build with its name.

function fail(text) { print "layout.awk: " text | "cat >&2"; failed = 1; exit 1 }
function after_colon(line) { sub(/^[^:]*: */, "", line); return line }
function name_of(line) {
    line = after_colon(line)
    if (line ~ /^\(/) sub(/^\([^)]*\): */, "", line)
    sub(/[ \t]+$/, "", line)
    return line
}
function reference(line) {
    match(line, /<0x[0-9a-f]+>/)
    return substr(line, RSTART + 3, RLENGTH - 4)
}
function number(line) {
    line = after_colon(line)
    sub(/^\([^)]*\) */, "", line)
    sub(/[ \t(].*$/, "", line)
    return line
}

/^ *<[0-9a-f]+><[0-9a-f]+>: Abbrev Number: 0/ { next }
/^ *<[0-9a-f]+><[0-9a-f]+>: Abbrev Number/ {
    split($1, part, /[<>:]+/)
    depth = part[2]
    id = part[3]
    tag[id] = $NF
    gsub(/[()]/, "", tag[id])
    above[depth] = id
    if (depth > 0) { parent = above[depth - 1]; child[parent, ++children[parent]] = id }
    next
}
/DW_AT_name / { name[id] = name_of($0) }
/DW_AT_byte_size / { size[id] = number($0) }
/DW_AT_encoding / { encoding[id] = number($0) }
/DW_AT_type / { type[id] = reference($0) }
/DW_AT_data_member_location/ { offset[id] = number($0) }
/DW_AT_upper_bound/ { bound[id] = number($0) }
/DW_AT_count / { bound[id] = number($0) - 1 }
/DW_AT_const_value/ { value[id] = number($0) }
/DW_AT_bit_size|DW_AT_data_bit_offset/ { bits[id] = 1 }

function resolved(t) {
    while (tag[t] ~ /^DW_TAG_(typedef|const_type|volatile_type)$/) t = type[t]
    return t
}
# A type's number; its row is written once those that it needs have theirs.
function number_of(t, path,    i, c, k, n, dims, of, row, first, counts) {
    t = resolved(t)
    if (t in numbered) return numbered[t]
    if (tag[t] == "DW_TAG_base_type") {
        k = encoding[t] == 2 ? "BOOL" : encoding[t] == 4 ? "FLOAT" : encoding[t] == 5 ? "SIGNED" : \
            encoding[t] == 6 ? "TEXT" : encoding[t] == 7 || encoding[t] == 8 ? "UNSIGNED" : ""
        if (k == "") fail(path ": an unknown kind of number, encoding " encoding[t])
        row = "TYPE(" k ", " size[t] ", 0, 0)"
        if (row in numbers) return numbered[t] = numbers[row]
        numbers[row] = n_types
    } else if (tag[t] == "DW_TAG_enumeration_type") {
        row = "TYPE(ENUM, " size[t] ", 0, 0) /*"
        for (i = 1; i <= children[t]; i++) row = row " " name[child[t, i]] " " value[child[t, i]]
        row = row " */"
    } else if (tag[t] == "DW_TAG_array_type") {
        for (i = 1; i <= children[t]; i++) if (tag[child[t, i]] == "DW_TAG_subrange_type") counts[++dims] = bound[child[t, i]] + 1
        return numbered[t] = array_of(number_of(type[t], path "[]"), counts, dims)
    } else if (tag[t] == "DW_TAG_structure_type") {
        n = 0
        for (i = 1; i <= children[t]; i++) {
            c = child[t, i]
            if (tag[c] != "DW_TAG_member") continue
            if (bits[c]) fail(path "." name[c] " is a bit field")
            of[++n] = "MEMBER(" name[c] ", " (offset[c] == "" ? 0 : offset[c]) ", " number_of(type[c], path "." name[c]) ")"
        }
        first = n_members
        for (i = 1; i <= n; i++) members[n_members++] = of[i]
        row = "TYPE(STRUCT, " size[t] ", " first ", " n ")"
    } else {
        fail(path ": " tag[t] " can't be compared bit for bit")
    }
    types[n_types] = row
    bytes[n_types] = size[t]
    return numbered[t] = n_types++
}
function array_of(element, counts, dims,    i, key) {
    for (i = dims; i >= 1; i--) {
        key = element "x" counts[i]
        if (!(key in arrays)) {
            bytes[n_types] = bytes[element] * counts[i]
            types[n_types] = "TYPE(ARRAY, " bytes[n_types] ", " element ", " counts[i] ")"
            arrays[key] = n_types++
        }
        element = arrays[key]
    }
    return element
}

END {
    if (failed) exit 1
    n_types = n_members = 0
    split("station in out steps axis_in axis_out", roots, " ")
    for (i = 1; i in roots; i++)
        for (id in tag) if (tag[id] == "DW_TAG_variable" && name[id] == "layout_" roots[i]) root[i] = number_of(type[id], roots[i])
    for (i = 1; i in roots; i++) {
        if (root[i] == "") fail("there is no " roots[i])
        print "ROOT(" roots[i] ", " root[i] ")"
    }
    for (i = 0; i < n_types; i++) print types[i]
    for (i = 0; i < n_members; i++) print members[i]
}
