package store

import "wane/study"

var protocolTable = newVersionsTable(26, "protocol")

// AddProtocol adds text as the next version of the protocol called name and returns its number. If the latest version
// has the same text, it adds nothing and returns that one. A protocol without a name is refused.
func (tx *Tx) AddProtocol(name, text string) (version int, added bool, err error) {
	return tx.addVersion(protocolTable, name, text)
}

// Protocol returns a version of the protocol called name; of version 0, the latest. It is nil if there is none.
func (tx *Tx) Protocol(name string, version int) (*study.Protocol, error) {
	p, err := findVersion(tx.ctx, prepared{tx}, protocolTable, name, version)
	if err != nil || p == nil {
		return nil, tx.fail(err)
	}
	return &p.Row, nil
}

// Protocols returns all versions of the protocols, in the order of name and version.
func (v *View) Protocols() ([]study.Protocol, error) {
	all, err := allVersions(v.ctx, v.q, protocolTable)
	return all, v.refuse(err)
}
