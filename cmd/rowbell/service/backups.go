package service

import (
	"cmp"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"rowbell/cmd/rowbell/config"
	"rowbell/store"
	"rowbell/store/agefile"
)

// AllBackups lists the backups of the records in their own folder and in that of the nightly backups: the newest file
// first, shrunken ones last. A nightly backup, one by hand or a rescued copy, encrypted or not, counts if its name
// begins with that of the records.
func AllBackups(c config.Config) []string {
	if store.OnServer(c.DB) {
		return nil
	}
	folders := []string{filepath.Dir(c.DB)}
	if c.Backup != nil && filepath.Clean(c.Backup.Folder) != folders[0] {
		folders = append(folders, c.Backup.Folder)
	}
	type backup struct {
		path  string
		order int   // 1 for a shrunken one, which should be restored last; 0 for others
		at    int64 // when the file was written
	}
	var list []backup
	head, tail, _ := strings.Cut(BackupName(c.DB, "\x00"), "\x00")
	for _, folder := range folders {
		entries, _ := os.ReadDir(folder) // a missing folder has no backups
		for _, e := range entries {
			path := filepath.Join(folder, e.Name())
			info, err := e.Info()
			if err == nil && info.Mode().IsRegular() && strings.HasPrefix(e.Name(), head) &&
				strings.HasSuffix(strings.TrimSuffix(e.Name(), agefile.Suffix), tail) && store.IsBackup(path) {
				b := backup{path: path, at: info.ModTime().UnixNano()}
				if strings.Contains(e.Name(), shrunkenMark) {
					b.order = 1
				}
				list = append(list, b)
			}
		}
	}
	slices.SortFunc(list, func(a, b backup) int {
		return cmp.Or(cmp.Compare(a.order, b.order), cmp.Compare(b.at, a.at), strings.Compare(b.path, a.path))
	})
	paths := make([]string, len(list))
	for i, b := range list {
		paths[i] = b.path
	}
	return paths
}
